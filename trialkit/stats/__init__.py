"""One statistical method a file: arrays in, a frozen result out."""
