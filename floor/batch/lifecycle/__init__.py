"""A batch opened, its pieces started and loaded, entered half done, sent to another shop, closed."""
