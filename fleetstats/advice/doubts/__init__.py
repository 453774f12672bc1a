"""What can take a verdict's word away although its bound would carry it."""
