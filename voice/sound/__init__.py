"""The sound card, recordings and loudspeakers.

In: a device, a file, or samples to play.
Out: 16 kHz mono blocks, and a clock that counts them.
May use: errors.
"""
