"""The gauge spoke in a boss: its rough line, axis, tip and end."""
