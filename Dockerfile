FROM python:3.13-slim
ENV PYTHONUNBUFFERED=1 NUMBA_CACHE_DIR=/var/cache/fetchwater FETCHWATER_DATA_DIR=/data
WORKDIR /app
# Sheets of paper are laid out with Pango, in letters that hold every sign of the page.
RUN apt-get update && apt-get install -y --no-install-recommends libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core \
    && rm -rf /var/lib/apt/lists/*
COPY requirements.lock pyproject.toml README.md ./
RUN pip install --no-cache-dir --require-hashes -r requirements.lock
COPY geo geo
COPY services services
RUN pip install --no-cache-dir --no-deps . \
    && useradd --create-home fetchwater \
    && mkdir -p /data /backups /var/cache/fetchwater \
    && chown fetchwater /data /backups /var/cache/fetchwater
USER fetchwater
EXPOSE 8000
CMD ["fetchwater", "serve", "/region", "--host", "0.0.0.0", "--port", "8000", "--survey-first"]
