"""How Chromium is started, and the two widths everything is looked at in."""

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PHONE = {"width": 390, "height": 844}
DESKTOP = {"width": 1280, "height": 900}
