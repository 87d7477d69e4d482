"""Opens tables: each cell as the text that stands there. Never what a text means."""
