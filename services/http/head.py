"""HEAD answered as GET without its content: every address that can be read can be asked for its headers."""

from starlette.types import ASGIApp, Message, Receive, Scope, Send


class HeadAsGet:
    """Asks the application by GET where HEAD was sent, and keeps the content back (RFC 9110, 9.1 and 9.3.2)."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass everything but HEAD through untouched."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return

        async def without_content(message: Message) -> None:
            if message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        await self.app({**scope, "method": "GET"}, receive, without_content)
