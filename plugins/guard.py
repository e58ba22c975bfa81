"""The border of the site: what may come in at all."""

from collections.abc import Callable

from datasette.app import Datasette

from diaryidx.site import guard
from diaryidx.site.context import shop_of
from diaryidx.site.hooks import hookimpl


@hookimpl(trylast=True)
def asgi_wrapper(datasette: Datasette) -> Callable[[guard.App], guard.App]:
    """Check every request before anything else sees it; other Datasette instances are left alone."""

    def wrap(app: guard.App) -> guard.App:
        return app if shop_of(datasette) is None else guard.guarded(app, datasette)

    return wrap
