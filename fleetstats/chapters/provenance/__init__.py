"""What is needed to make the report again."""
