from whitenoise.storage import CompressedManifestStaticFilesStorage

_, IMPORTS = CompressedManifestStaticFilesStorage._js_module_import_aggregation_patterns


class ModuleStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc] # ships no types
    """Name files by their content, also where one script of ours imports another."""

    # Ours alone: the scripts of libraries come whole and import nothing.
    patterns = (*CompressedManifestStaticFilesStorage.patterns, ("school/*.js", IMPORTS), ("grading/*.js", IMPORTS))
