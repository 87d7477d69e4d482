"""The query that asks the rules of orders in a database, and the table of read texts it joins.

Writes SQL, and rows of a table. Never connects to a database, and never reads a cell in SQL.
"""
