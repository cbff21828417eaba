"""The page served on this machine alone, on a port of the system's choosing, until it is stopped.

uvicorn is met here alone. Nothing is logged. Imports app.
"""

from __future__ import annotations

import socket
import webbrowser
from collections.abc import Callable

import uvicorn

from dictation.errors import OutputError
from dictation.settings import Settings
from dictation.store.store import Store
from dictation.web.app import make_app
from dictation.web.dictations import Dictations
from dictation.web.dropping import Dropping
from dictation.web.entry import Entry

HOST = "127.0.0.1"


def serve(store: Store, settings: Settings, *, port: int, browser: bool, say: Callable[[str], None]) -> None:
    """Serve the page until Ctrl-C. port: 0 for one that is free. browser: open it there. say: is told address and codes.

    Raises OutputError where the port cannot be had.
    """
    with listen(port) as listener:
        port = listener.getsockname()[1]
        address = f"http://{HOST}:{port}"

        def tell(code: str) -> None:
            say(f"To get in: {address}/enter?code={code}")

        entry = Entry(tell)
        dictations, dropping = Dictations(store, settings), Dropping(store, settings)
        app = make_app(store, settings, port, entry, dropping, dictations)
        code = entry.offer()
        config = uvicorn.Config(
            app, log_config=None, log_level="critical", access_log=False, lifespan="off", server_header=False,
            timeout_graceful_shutdown=1, ws="websockets-sansio", ws_max_size=1 << 20,
        )  # fmt: skip
        if browser:
            webbrowser.open(f"{address}/enter?code={code}")
        try:
            uvicorn.Server(config).run(sockets=[listener])
        finally:
            dictations.close()
            dropping.close()


def listen(port: int) -> socket.socket:
    """Return a socket that listens on this machine alone. Raises OutputError."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((HOST, port))
        listener.listen(128)
    except OSError as err:
        listener.close()
        raise OutputError(f"Port {port} of this machine cannot be used ({type(err).__name__}); leave --port out.") from err
    return listener
