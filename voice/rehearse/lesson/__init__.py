"""What a student or an instructor asks for, done: recitals, study sheets, rehearsals, the class's progress."""
