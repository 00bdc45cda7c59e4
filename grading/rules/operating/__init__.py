"""What a rule lets through: the chance that a student is shown as ready, by how well the student truly flies."""
