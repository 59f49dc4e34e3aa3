"""Files: where they are, how they are read, and how they are written so that a power cut loses nothing.

In: folders and files of the program and of the user.
Out: paths, checked models, mistakes with file and line, durable files.
May use: errors, and libraries.
"""
