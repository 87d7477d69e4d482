"""What people read of an audit: text, a page with pictures, and rows as a table."""
