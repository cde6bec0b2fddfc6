"""How Chromium is started, and the two widths everything is looked at in."""

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PATIENCE = 30_000  # milliseconds: what is waited for comes, on a busy machine it only comes late
PHONE = {"width": 390, "height": 844}
DESKTOP = {"width": 1280, "height": 900}
