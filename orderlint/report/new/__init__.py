"""The beginnings of new documents, for whoever writes one.

Each is made from the tables that documents are read by. Never a value for a patient.
"""
