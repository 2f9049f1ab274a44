"""What people type: names, words, numbers, units and dates."""
