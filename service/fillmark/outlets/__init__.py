"""What leaves the service by itself: messages on an MQTT broker, webhooks, the announcement on the local network.

An outlet watches a `Feed`, at its own pace. Nothing waits for an outlet, and an outlet changes nothing.
"""
