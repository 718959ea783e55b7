"""What the papers show: drawings, documents, workbooks."""
