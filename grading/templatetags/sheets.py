"""Lay out printed sheets in their templates. {% load sheets %}"""

from collections.abc import Mapping
from typing import Any

from django import template

from grading.sheets.complete_layout import CompleteLayout, lay_out_complete
from grading.sheets.logbook_layout import LogbookLayout, lay_out_logbook
from grading.sheets.progress_layout import ProgressLayout, lay_out_progress

register = template.Library()


@register.simple_tag
def progress_layout(sheet: Mapping[str, Any], fewer: int = 0) -> ProgressLayout:
    return lay_out_progress(sheet, fewer)


@register.simple_tag
def complete_layout(sheet: Mapping[str, Any]) -> CompleteLayout:
    return lay_out_complete(sheet)


@register.simple_tag
def logbook_layout(sheet: Mapping[str, Any]) -> LogbookLayout:
    return lay_out_logbook(sheet)
