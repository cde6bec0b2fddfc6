"""What a log line may say."""

import logging
import re

_LINK = re.compile(r"(/status/open/)[A-Za-z0-9_-]+")


class HidePrivateLinks(logging.Filter):
    """A private link's token opens a consignor's page: it never reaches a log."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg = _LINK.sub(r"\1(hidden)", record.getMessage())
        record.args = ()
        return True
