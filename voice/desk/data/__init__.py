"""What the pages ask of the logbook and of the home: nothing else of the desk knows their tables and files."""
