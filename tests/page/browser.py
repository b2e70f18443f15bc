"""Headless Chromium over its debugging protocol, for tests of the page: no network, console watched."""
import base64, json, os, shutil, subprocess, sys, tempfile, time

try:
    import websocket
except ImportError:
    websocket = None


def missing():
    """Why the browser tests cannot run here, or None."""
    if websocket is None:
        return "python3-websocket is not installed"
    if not (shutil.which("chromium") or shutil.which("chromium-browser")):
        return "chromium is not installed"
    return None


class Browser:
    def __init__(self):
        self.folder = tempfile.mkdtemp(prefix="rarefy-browser-")
        command = [shutil.which("chromium") or shutil.which("chromium-browser"), "--headless", "--no-sandbox", "--disable-gpu",
                   "--disable-dev-shm-usage", "--hide-scrollbars", "--no-first-run", "--disable-extensions",
                   "--disable-background-networking", "--host-resolver-rules=MAP * ~NOTFOUND", "--remote-debugging-port=0",
                   "--remote-allow-origins=*", "--user-data-dir=" + self.folder, "about:blank"]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        port = os.path.join(self.folder, "DevToolsActivePort")
        for _ in range(300):
            if os.path.exists(port) and len(open(port).read().split("\n")) >= 2:
                break
            time.sleep(0.1)
        number, path = open(port).read().split("\n")[:2]
        self.socket = websocket.create_connection("ws://127.0.0.1:%s%s" % (number, path), timeout=60)
        self.count = 0
        self.session = None
        self.errors = []
        self.requests = []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(domain + ".enable")

    def handle(self, message):
        method, p = message.get("method"), message.get("params", {})
        if method == "Runtime.exceptionThrown":
            d = p["exceptionDetails"]
            self.errors.append(d.get("exception", {}).get("description", d.get("text", "?")))
        elif method == "Runtime.consoleAPICalled" and p["type"] in ("error", "warning", "assert"):
            self.errors.append("console: " + str([a.get("value", a.get("description")) for a in p["args"]]))
        elif method == "Log.entryAdded" and p["entry"]["level"] in ("error", "warning"):
            self.errors.append("log: " + p["entry"]["text"])
        elif method == "Page.javascriptDialogOpening":
            self.errors.append("dialog: " + p["message"])
            self.call("Page.handleJavaScriptDialog", accept=True)
        elif method == "Network.requestWillBeSent":
            self.requests.append(p["request"]["url"])

    def call(self, method, **params):
        self.count += 1
        own = self.count
        message = {"id": own, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        self.socket.send(json.dumps(message))
        while True:
            answer = json.loads(self.socket.recv())
            if answer.get("id") == own:
                if "error" in answer:
                    raise RuntimeError("%s: %s" % (method, answer["error"]))
                return answer["result"]
            self.handle(answer)

    def size(self, width, height, scale=1, phone=False):
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=scale, mobile=phone)

    def media(self, kind="screen", dark=False):
        self.call("Emulation.setEmulatedMedia", media=kind,
                  features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}])

    def open(self, path):
        self.errors, self.requests = [], []
        self.call("Page.navigate", url="file://" + os.path.abspath(path))
        for _ in range(600):
            if self.evaluate("location.protocol === 'file:' && document.readyState === 'complete'"):
                break
            time.sleep(0.02)
        self.evaluate("new Promise(f => requestAnimationFrame(() => requestAnimationFrame(f)))")

    def evaluate(self, script):
        r = self.call("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in r:
            raise RuntimeError(r["exceptionDetails"].get("exception", {}).get("description", r["exceptionDetails"]["text"]))
        return r["result"].get("value")

    def mouse(self, x, y, kind="mouseMoved"):
        self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="none" if kind == "mouseMoved" else "left", clickCount=1)

    def key(self, key, code):
        for kind in ("keyDown", "keyUp"):
            self.call("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code)

    def shot(self, path, clip=None):
        more = {"clip": dict(zip(("x", "y", "width", "height"), clip), scale=1)} if clip else {}
        data = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=True, **more)["data"]
        open(path, "wb").write(base64.b64decode(data))

    def pdf(self, path):
        data = self.call("Page.printToPDF", printBackground=False, preferCSSPageSize=True)["data"]
        open(path, "wb").write(base64.b64decode(data))

    def close(self):
        try:
            self.session = None
            self.call("Browser.close")
        except Exception:
            pass
        self.process.terminate()
        self.process.wait(20)
        shutil.rmtree(self.folder, ignore_errors=True)
