"""The delay-time model of faults found at checks."""
