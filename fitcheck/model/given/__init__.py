"""What the user gives."""
