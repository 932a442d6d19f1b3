"""The pages that people look at, served with no network beyond the service. `static/` holds them; nothing is built."""
