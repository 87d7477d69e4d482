"""Shows the result of an audit: text, a page, JSON, and the rows as files."""
