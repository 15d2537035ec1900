"""How the web processes run, here and in the container; the address comes from who starts them."""

import os
from pathlib import Path

workers = int(os.environ.get("WEB_CONCURRENCY", "2"))
threads = int(os.environ.get("WEB_THREADS", "4"))
timeout = 60
graceful_timeout = 10
keepalive = 5
# A heartbeat file on a slow disk makes a healthy worker look dead.
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None
control_socket_disable = True
