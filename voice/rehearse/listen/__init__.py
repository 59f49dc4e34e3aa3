"""From a student's transcript to points: words, figures, the parts that were named, the score."""
