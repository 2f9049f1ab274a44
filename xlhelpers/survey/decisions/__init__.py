"""Who a finding is, and what the office decided about it."""
