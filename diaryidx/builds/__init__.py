"""The job book, the links from film to its builds, and what is known of each build."""
