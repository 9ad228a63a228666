"""The state of an aircraft between flights: its open defects, what maintenance signs, and when the next work is due."""
