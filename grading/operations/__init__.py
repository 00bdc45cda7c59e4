"""Operations of an installation: backup, daily work, tasks of the worker, reminders and its state."""
