"""Every failure, and every row that hints at one."""
