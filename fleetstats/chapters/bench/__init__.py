"""The bench beside the field."""
