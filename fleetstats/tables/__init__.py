"""Bytes to rows: CSV, XLSX and Parquet, whole or by chunks; cells and columns."""
