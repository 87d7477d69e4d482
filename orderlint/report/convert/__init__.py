"""What becomes of a document in another form: which element went where, and what was left."""
