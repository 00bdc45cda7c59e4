"""How an installation is run: backup, daily work, tasks of the worker, reminders, its state."""
