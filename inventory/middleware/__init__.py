"""What every request goes through before its page and after it."""
