"""Report: the page a customer is shown."""
