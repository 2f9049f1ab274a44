"""First findings: one declared table of checks, a module a subject, and what runs them."""
