# One image for web, worker, beat and migrations; docker-compose.yml says which is which.
FROM python:3.13-slim AS packages
COPY requirements.lock .
RUN python -m venv /venv && /venv/bin/pip install --no-cache-dir --require-hashes -r requirements.lock

FROM python:3.13-slim
RUN apt-get update \
    && apt-get install -y --no-install-recommends \
        libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-liberation \
    && rm -rf /var/lib/apt/lists/* \
    && useradd --system --uid 1000 --create-home firstwarm \
    && install -d -o firstwarm /srv/firstwarm /srv/firstwarm/var /srv/files \
    && install -d -o firstwarm -m 700 /srv/signing
COPY --from=packages /venv /venv
ENV PATH=/venv/bin:$PATH PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 FILES_DIR=/srv/files
WORKDIR /srv/firstwarm
COPY --chown=firstwarm manage.py pyproject.toml ./
COPY --chown=firstwarm config config
COPY --chown=firstwarm jobs jobs
COPY --chown=firstwarm readings readings
COPY --chown=firstwarm scheduling scheduling
USER firstwarm
RUN python manage.py collectstatic --noinput
EXPOSE 8000
CMD ["gunicorn", "config.wsgi", "--config", "python:config.gunicorn", "--bind", "0.0.0.0:8000"]
