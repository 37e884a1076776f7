# Two stages: the first builds wheels and compiles, the second serves as an unprivileged user from a read-only tree.
FROM python:3.11-slim AS build
ENV PIP_DISABLE_PIP_VERSION_CHECK=1
WORKDIR /build
RUN python -m venv /opt/runstand
COPY deploy/requirements.txt ./
RUN /opt/runstand/bin/pip install --no-cache-dir --require-hashes -r requirements.txt
COPY pyproject.toml README.md LICENSE ./
COPY service ./service
RUN /opt/runstand/bin/pip install --no-cache-dir --no-deps . \
 && /opt/runstand/bin/python -m compileall -q /opt/runstand

FROM python:3.11-slim
RUN useradd --uid 10001 --no-create-home --shell /usr/sbin/nologin runstand
COPY --from=build /opt/runstand /opt/runstand
COPY --chmod=a+rX,a-w data /opt/runstand/data
ENV RUNSTAND_DATA=/opt/runstand/data \
    RUNSTAND_HOST=0.0.0.0 \
    RUNSTAND_PORT=8000 \
    PYTHONDONTWRITEBYTECODE=1
USER 10001
EXPOSE 8000
HEALTHCHECK --interval=10s --timeout=2s --start-period=5s CMD ["/opt/runstand/bin/python", "-c", "import urllib.request as u; u.urlopen('http://127.0.0.1:8000/health/ready', timeout=2)"]
CMD ["/opt/runstand/bin/python", "-m", "service.api.serve"]
