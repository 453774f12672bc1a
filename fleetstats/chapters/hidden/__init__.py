"""What hidden or doubtful facts would change."""
