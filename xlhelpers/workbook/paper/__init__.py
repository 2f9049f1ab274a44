"""What is printed for the field: field sheets, the list of trees to measure again, cards."""
