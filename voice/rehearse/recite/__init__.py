"""The route recited aloud, coached, or written to an audio file."""
