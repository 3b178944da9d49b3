"""One question of a reviewer a file: a trial or a frame in, a frame out."""
