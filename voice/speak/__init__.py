"""The voice: sentences and tones.

In: text, or the name of a tone.
Out: sound on an output; `say` returns when it has ended.
May use: errors, data, measure, walk (names of tones), sound.
"""
