"""What watches and guards every request."""
