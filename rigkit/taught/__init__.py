"""What single lessons compute and show: a module a lesson, beyond what `rigkit.lesson` does for all of them."""
