"""Trees: the means of their set-ups, their crowns and stems."""
