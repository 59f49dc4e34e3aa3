"""How long the desk's pages take with many readers."""
