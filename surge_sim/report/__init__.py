"""Tables in, files and text out; computes nothing."""
