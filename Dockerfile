# Two stages: the first installs and compiles, the second serves as an unprivileged user from a tree that nobody can write.
# Nothing is installed that is not named with its hash in deploy/.
FROM python:3.11-slim AS build
ENV PIP_DISABLE_PIP_VERSION_CHECK=1 \
    PIP_NO_CACHE_DIR=1
WORKDIR /build
COPY deploy/requirements.txt deploy/build-requirements.txt ./
RUN python -m venv /build/tools \
 && /build/tools/bin/pip install --require-hashes -r build-requirements.txt \
 && python -m venv --without-pip /opt/runstand \
 && /build/tools/bin/pip --python /opt/runstand/bin/python install --require-hashes -r requirements.txt
COPY pyproject.toml README.md LICENSE ./
COPY service ./service
RUN /build/tools/bin/pip wheel --no-index --no-deps --no-build-isolation --wheel-dir /build/wheels . \
 && /build/tools/bin/pip --python /opt/runstand/bin/python install --no-index --no-deps /build/wheels/*.whl \
 && /opt/runstand/bin/python -m compileall -q /opt/runstand
COPY data /opt/runstand/data
RUN chmod -R a+rX,a-w /opt/runstand

FROM python:3.11-slim
RUN useradd --uid 10001 --no-create-home --shell /usr/sbin/nologin runstand
COPY --from=build /opt/runstand /opt/runstand
ENV RUNSTAND_DATA=/opt/runstand/data \
    RUNSTAND_HOST=0.0.0.0 \
    RUNSTAND_PORT=8000 \
    PYTHONDONTWRITEBYTECODE=1 \
    PYTHONUNBUFFERED=1
WORKDIR /opt/runstand
USER 10001
EXPOSE 8000
HEALTHCHECK --interval=10s --timeout=3s --start-period=5s CMD ["/opt/runstand/bin/python", "-c", "import os, urllib.request as u; u.urlopen(f\"http://127.0.0.1:{os.environ['RUNSTAND_PORT']}/health/ready\", timeout=2)"]
CMD ["/opt/runstand/bin/python", "-m", "service.api.serve"]
