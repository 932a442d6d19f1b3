"""`python -m services` is the `fetchwater` command."""

from services.cli.main import main

if __name__ == "__main__":
    main()
