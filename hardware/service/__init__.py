"""What the service manager of the box sees of Keelnote: its unit, and the news that it is ready and alive."""
