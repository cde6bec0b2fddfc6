"""Photos, papers and imports in an S3-compatible bucket: `python -m tests.bench.bucket_media`.

Wants `django-storages[s3]` and `moto[server]`, which plays the bucket on loopback. Sets up the demo with its media
there, serves it, and compares every stored file with what the bucket holds.
"""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent
MAKE_BUCKET = """
import os, time
import boto3
from botocore.exceptions import EndpointConnectionError
client = boto3.client("s3", endpoint_url=os.environ["MEDIA_ENDPOINT"])
for _ in range(60):
    try:
        client.create_bucket(Bucket=os.environ["MEDIA_BUCKET"])
        break
    except EndpointConnectionError:  # it is still starting
        time.sleep(0.5)
"""
INSIDE = """
import io, json
from PIL import Image
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.files.storage import default_storage
from django.db.models import FileField
from django.test import Client
from inventory.models import Consignment, Photo, User
client = Client(HTTP_HOST="localhost")
client.force_login(User.objects.get(username="owner"), backend="django.contrib.auth.backends.ModelBackend")
seen = io.BytesIO()
Image.effect_noise((1600, 1200), 80).convert("RGB").save(seen, "JPEG")
shot = SimpleUploadedFile("front.jpg", seen.getvalue(), content_type="image/jpeg")
stay = Consignment.objects.filter(state="listed").first()
client.post(f"/vehicles/{stay.stock_number}/photos/", {"file": shot})
kept, lost, sizes = 0, [], 0
for model in apps.get_app_config("inventory").get_models():
    for field in [f for f in model._meta.get_fields() if isinstance(f, FileField)]:
        for name in model._base_manager.exclude(**{field.name: ""}).values_list(field.name, flat=True):
            if default_storage.exists(name):
                kept, sizes = kept + 1, sizes + default_storage.size(name)
            else:
                lost.append(name)
photo = Photo.objects.get()
answer = client.get(f"/photos/{photo.code}/")
same = b"".join(answer.streaming_content) == default_storage.open(photo.file.name).read()
print(json.dumps({"storage": type(default_storage).__name__, "kept": kept, "lost": lost, "bytes": sizes,
                  "photo": answer.status_code, "same": same}))
"""


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        given: dict[str, str] = {
            **os.environ, "DATA_DIR": folder, "TASKS": "immediate", "MEDIA_BUCKET": "lot-media",
            "MEDIA_ENDPOINT": "http://127.0.0.1:5577",
            "MEDIA_REGION": "us-east-1", "AWS_ACCESS_KEY_ID": "invented", "AWS_SECRET_ACCESS_KEY": "invented",
        }  # fmt: skip
        server = subprocess.Popen(
            [Path(sys.executable).parent / "moto_server", "-p", "5577"], stderr=subprocess.DEVNULL
        )
        try:
            said = walk(given)
        finally:
            server.terminate()
        on_disk = [str(path) for path in (Path(folder) / "media").rglob("*") if path.is_file()]
    print(said | {"left on the disk": on_disk})
    whole = said["photo"] == 200 and said["same"] and said["kept"] > 0 and not said["lost"]
    return 0 if whole and not on_disk else 1


def walk(given: dict[str, str]) -> dict[str, Any]:
    subprocess.run([sys.executable, "-c", MAKE_BUCKET], check=True, env=given)
    manage = [sys.executable, str(ROOT / "manage.py")]
    subprocess.run([*manage, "demo", "--no-serve"], check=True, env=given, stdout=subprocess.DEVNULL)
    done = subprocess.run([*manage, "shell", "-v", "0", "-c", INSIDE], check=True, env=given, stdout=subprocess.PIPE)
    said: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return said


if __name__ == "__main__":
    sys.exit(main())
