from whitenoise.storage import CompressedManifestStaticFilesStorage

_, IMPORTS = CompressedManifestStaticFilesStorage._js_module_import_aggregation_patterns


class ModuleStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc] # ships no types
    """Names files by their content, also where one script of ours imports another."""

    support_js_module_import_aggregation = True
    _js_module_import_aggregation_patterns = ("school/*.js", IMPORTS)
