"""The bench page: a local web page for the whole job. All measuring is that of the other packages."""
