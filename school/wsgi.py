import gc
import os
from importlib import import_module

from django.conf import settings
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "school.settings")
application = get_wsgi_application()

# What is loaded by now stays to the end. Looking through it for garbage again and again doubled the slowest answers.
import_module(settings.ROOT_URLCONF)  # every page, with all that it imports
import_module("scipy.special")  # and what they load when first asked for
gc.collect()
gc.freeze()
gc.set_threshold(20_000, 20, 50)
