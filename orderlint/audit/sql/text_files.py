"""Writes the table of read texts as a file to be uploaded: Parquet or CSV."""

from __future__ import annotations
