from django.urls import reverse


def test_the_sign_in_page_opens_without_an_account(client, owner_manager):
    answer = client.get(reverse("backoffice:sign-in"))
    assert answer.status_code == 200
    assert "Sign in" in answer.content.decode()
