"""The answer to a request body over the limit: a problem document like every other refusal, not plain text."""

from fastapi import FastAPI
from fastapi.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

PROBLEM = "application/problem+json"


class ProblemWhenTooLarge:
    """Stands outside the library's limit, which answers 413 in plain text before any handler is asked."""

    def __init__(self, app: ASGIApp, limit_bytes: int) -> None:
        self.app = app
        self.limit_bytes = limit_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass everything through but a 413, whose document takes its place."""
        replaced = False

        async def told(message: Message) -> None:
            nonlocal replaced
            if message["type"] == "http.response.start" and message["status"] == 413:
                replaced = True
                await self._document(scope)(scope, receive, send)
            elif not replaced:
                await send(message)

        await self.app(scope, receive, told)

    def _document(self, scope: Scope) -> JSONResponse:
        body = {
            "type": "about:blank",
            "title": "The request body is too large",
            "status": 413,
            "detail": f"the body is over the limit of {self.limit_bytes} bytes. Fix: send less, or set "
            "FETCHWATER_MAX_BODY_BYTES",
            "instance": scope["path"],
        }
        return JSONResponse(body, status_code=413, media_type=PROBLEM)


class LimitedApp(FastAPI):
    """FastAPI with a limit on the body whose refusal is a problem document."""

    def build_middleware_stack(self) -> ASGIApp:
        """Give the library's stack, wrapped."""
        return ProblemWhenTooLarge(super().build_middleware_stack(), self.max_body_size)
