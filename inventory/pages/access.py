"""placeholder"""


def actor_in_templates(request):
    return {}
