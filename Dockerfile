# The service alone, in a small image: no compiler, no root, nothing to write. docker-compose.yml shows how to run it.
FROM rust:1.95-slim-bookworm AS build
WORKDIR /ovenwright
COPY . .
# The statements are checked against the committed .sqlx, so that no database is needed here.
RUN --mount=type=cache,target=/usr/local/cargo/registry --mount=type=cache,target=/ovenwright/target \
    SQLX_OFFLINE=true cargo build --release --locked --package server && \
    cp target/release/ovenwright /usr/local/bin/

FROM debian:bookworm-slim
RUN useradd --system --uid 10001 --home-dir /var/lib/ovenwright --create-home ovenwright
COPY --from=build /usr/local/bin/ovenwright /usr/local/bin/
# Whom to trust where keys of a token's issuer are fetched, or spans are sent.
COPY --from=build /etc/ssl/certs/ca-certificates.crt /etc/ssl/certs/
USER ovenwright
WORKDIR /var/lib/ovenwright
# Inside a container the loopback address cannot be reached from outside.
ENV OVENWRIGHT_LISTEN=0.0.0.0:8080
EXPOSE 8080
HEALTHCHECK --interval=5s --timeout=3s --start-period=5s CMD ["bash", "-c", \
    "exec 3<>/dev/tcp/127.0.0.1/8080 && printf 'GET /readyz HTTP/1.0\\r\\n\\r\\n' >&3 && read -r -t 2 answer <&3 && [[ $answer == *' 200 '* ]]"]
ENTRYPOINT ["ovenwright"]
CMD ["serve"]
