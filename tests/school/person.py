"""Somebody at a browser, as a class's JupyterHub sees them: HTTP to log in and to start a server, a websocket to a kernel."""

import json
import time
from uuid import uuid4

import requests
import websocket

from tests.school.hub import PATIENCE, School


class Person:
    """Somebody at a browser: logs in with a password, starts a server, runs code in one kernel."""

    def __init__(self, school: School, account: str):
        self.school, self.account, self.web, self.kernel = school, account, requests.Session(), ""

    def log_in(self, password: str | None = None) -> bool:
        """Log in on the hub's own page; whether it let one in."""
        page, form = f"{self.school.url}/hub/login", {"username": self.account}
        self.web.get(page, timeout=PATIENCE)
        form |= {"password": password or self.school.accounts[self.account], "_xsrf": self.web.cookies["_xsrf"]}
        self.web.post(page, data=form, timeout=PATIENCE, allow_redirects=False)
        if self.web.get(f"{self.school.url}/hub/api/user", timeout=PATIENCE).status_code != 200:
            return False
        token = self._hub("POST", "tokens", json={"note": "test"}).json()["token"]
        self.head = {"Authorization": f"token {token}"}
        return True

    def _hub(self, verb: str, what: str, **more):
        xsrf = {"X-XSRFToken": next(one.value for one in self.web.cookies if one.name == "_xsrf")}
        url = f"{self.school.url}/hub/api/users/{self.account}/{what}".rstrip("/")
        return self.web.request(verb, url, headers=xsrf, timeout=PATIENCE, **more)

    def start(self) -> bool:
        """Start one's server and wait for it; whether it came."""
        self._hub("POST", "server")
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            state = self._hub("GET", "").json()
            if state.get("servers", {}).get("", {}).get("ready"):
                self.kernel = self.ask(
                    "POST", self.account, "kernels", json={"name": "python3", "path": "contents.ipynb"}
                ).json()["id"]
                return True
            if not state.get("pending") and not state.get("servers", {}).get("", {}).get("pending"):
                return False
            time.sleep(0.5)
        return False

    def stop(self) -> None:
        """Stop one's server and wait until it has gone."""
        self._hub("DELETE", "server")
        until = time.monotonic() + PATIENCE
        while self._hub("GET", "").json().get("servers") and time.monotonic() < until:
            time.sleep(0.5)

    def ask(self, verb: str, whose: str, what: str, **more):
        """Ask somebody's server with one's own token."""
        url = f"{self.school.url}/user/{whose}/api/{what}"
        return requests.request(verb, url, headers=self.head, timeout=PATIENCE, allow_redirects=False, **more)

    def run(self, code: str) -> str:
        """Run code in one's kernel; what it printed, or the error's name and words."""
        url = f"{self.school.url.replace('http', 'ws')}/user/{self.account}/api/kernels/{self.kernel}/channels"
        line = websocket.create_connection(url, header=self.head, timeout=PATIENCE)
        try:
            number, told = uuid4().hex, ""
            head = {"msg_id": number, "msg_type": "execute_request", "username": "", "session": uuid4().hex,
                    "version": "5.3"}  # fmt: skip
            line.send(json.dumps({"header": head, "parent_header": {}, "metadata": {}, "channel": "shell",
                                  "content": {"code": code, "silent": False, "store_history": False}}))  # fmt: skip
            while True:
                said = json.loads(line.recv())
                if said["parent_header"].get("msg_id") != number:
                    continue
                kind, content = said["msg_type"], said["content"]
                if kind == "stream":
                    told += content["text"]
                elif kind == "error":
                    told += f"{content['ename']}: {content['evalue']}"
                elif kind == "status" and content["execution_state"] == "idle":
                    return told.strip()
        finally:
            line.close()
