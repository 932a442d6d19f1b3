"""REFERENCE.md's column tables from the one list that the exports use; `python -m tests.column_tables` prints them."""

from geo.records.columns import LAYERS


def markdown() -> str:
    """Give one table per layer."""
    parts = []
    for layer, columns in LAYERS.items():
        parts.append(f"**{layer}**\n\n| column | unit | meaning |\n|---|---|---|")
        parts[-1] += "".join(f"\n| `{c.name}` | {c.unit or '-'} | {c.meaning} |" for c in columns)
    return "\n\n".join(parts) + "\n"


if __name__ == "__main__":
    print(markdown(), end="")
