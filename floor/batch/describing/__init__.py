"""Every kind of entry in words, a module for each subject."""
