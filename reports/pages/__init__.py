"""One module a page: results in, the page's context out."""
