# The service alone, in a small image: no compiler, no root, nothing to write. docker-compose.yml shows how to run it.
# Others' images are named by what is in them: a tag alone may be another image tomorrow.
FROM rust:1.95-slim-bookworm@sha256:d7482085ff5b415f84dba5647ae71606650bdef00db7aeb69f4b3d170c3e4082 AS build
WORKDIR /ovenwright
COPY . .
# The statements are checked against the committed .sqlx, so that no database is needed here.
RUN --mount=type=cache,target=/usr/local/cargo/registry --mount=type=cache,target=/ovenwright/target \
    SQLX_OFFLINE=true cargo build --release --locked --package server && \
    cp target/release/ovenwright /usr/local/bin/

FROM debian:bookworm-slim@sha256:88200866dfff7ea7f5cbcb6ec7c8a701889efe6fe859fe64d6990e4b07ea4171
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
